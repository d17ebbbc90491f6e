"""What a report says, section by section: facts in, blocks of a document out.

Not here: how facts are found, nor how blocks look.
"""

from wickwatch.report.sections.whole import document, title_of

__all__ = ["document", "title_of"]
