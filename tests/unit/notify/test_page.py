"""A notice's text as HTML: the same words, and nothing that somebody typed becomes markup."""

from __future__ import annotations

from wickwatch.notify.page import Block, Item, blocks, page

TEXT = "It is wet.\n\nWhat to do:\n1. Look.\n2. Close it.\n\nSay that it is yours:\nhttps://x.example.org/a/b\n"


def test_steps_become_a_list_and_an_address_a_link_with_the_words_before_it() -> None:
    assert list(blocks(TEXT)) == [
        Block("It is wet."),
        Block("What to do:", (Item("Look."), Item("Close it.")), in_order=True),
        Block("Say that it is yours", link="https://x.example.org/a/b"),
    ]


def test_the_alarms_of_a_summary_become_points_each_with_its_link() -> None:
    text = "All of them:\n- High: one.\n  https://x.example.org/a/b\n- Low: two."
    (block,) = blocks(text)
    items = (Item("High: one.", "https://x.example.org/a/b"), Item("Low: two."))
    assert block == Block("All of them:", items, in_order=False)
    made = page("t", text, None, "cid")
    assert "<ul" in made and 'href="https://x.example.org/a/b"' in made


def test_an_address_alone_is_its_own_words_and_text_after_it_stays() -> None:
    text = "https://x.example.org/1\nand more"
    assert list(blocks(text)) == [Block("https://x.example.org/1", link="https://x.example.org/1"), Block("and more")]


def test_what_somebody_typed_is_text() -> None:
    made = page("<b>", '<script>alert(1)</script> & "more"\n\n1. <i>x</i>\n', None, "cid")
    assert "<script>" not in made and "<i>" not in made and "<b>" not in made
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp;" in made
