"""Two crops side by side: what is known of them without a plan."""
