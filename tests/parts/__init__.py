"""Real servers for tests, benchmarks and reliability runs: database, broker, mail, webhook receiver, browser.

Each module gives one part as a context manager that stops what it started. Fixtures over them stand in
`tests/conftest.py`; `python -m tests.parts` installs what a machine lacks. Nothing here is a stand-in: what can be
real is real, so that a passing test says something about the servers that people run.
"""
