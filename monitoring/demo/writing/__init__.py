"""The scenario written through the services, in one transaction for both organisations."""
