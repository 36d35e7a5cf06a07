"""Who reads what, and when: programmes, people, issues, assignments."""
