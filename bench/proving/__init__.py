"""The proving ground: messy sessions made with their truth, and what the hearing scores on them."""
