"""The weekly trend report of a facility: what it says, its files, and the process that makes it on Mondays."""

from wickwatch.report.facts import Facts, facts
from wickwatch.report.make import File, data, papers
from wickwatch.report.process import run
from wickwatch.report.week import Week, last_complete, parse

__all__ = ["Facts", "File", "Week", "data", "facts", "last_complete", "papers", "parse", "run"]
