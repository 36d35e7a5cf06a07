"""Speed and memory beside general-purpose programs; never part of what is installed."""
