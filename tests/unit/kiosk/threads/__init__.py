"""From a designation to limits."""
