"""What can be worked out about species from their traits: pure, no database."""
