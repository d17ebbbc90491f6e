"""The pages and the JSON API."""
