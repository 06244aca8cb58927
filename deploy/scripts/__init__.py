"""What the commands in deploy/ run: setting up, private services, the demo and the order of the checks."""
