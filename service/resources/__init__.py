"""One blueprint for each resource; views only join the parts and stay within ten lines."""
