"""The `wickwatch` command."""
