"""What the oracle found, each as the smallest night that shows it. Expectations are by hand, from the rules named."""
