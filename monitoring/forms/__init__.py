"""What people type about plots, rounds, passes and cases."""
