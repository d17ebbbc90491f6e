"""All SQL, one module for each family of tables."""
