"""The trial: many cars with hidden faults through the trees, and what the trees made of them."""
