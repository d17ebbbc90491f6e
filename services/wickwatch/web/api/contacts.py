"""How the caller is reached, and a test of one way."""

from __future__ import annotations

from typing import cast

from fastapi import APIRouter
from pydantic import BaseModel, Field

from wickwatch.store import contacts as stored
from wickwatch.store import trial
from wickwatch.web import reach
from wickwatch.web.access import ApiCall
from wickwatch.web.api import shapes
from wickwatch.web.api.fields import uuid
from wickwatch.web.api.models import Contact, ContactTest, NoticeState, Way
from wickwatch.web.problems import not_found

router = APIRouter(tags=["contacts"])


class ContactList(BaseModel):
    """All of them, in the order they are tried."""

    items: list[Contact] = Field(description="the first is called first")


@router.get("/contacts")
def list_contacts(call: ApiCall) -> ContactList:
    """How the caller is reached, in the order it is tried."""
    with call.web.connection() as conn:
        found = stored.reaches(conn, call.person_id)
    return ContactList(items=[_contact(each) for each in found])


@router.post("/contacts/{id}/test", status_code=202)
def test_contact(call: ApiCall, id: str) -> ContactTest:
    """Send the caller a test over one of their contacts; how it went is in the list a little later."""
    contact_id = uuid(id, "contact")
    with call.web.connection() as conn:
        if contact_id not in {each.id for each in stored.reaches(conn, call.person_id)}:
            raise not_found("contact")
        notice_id = reach.send_test(conn, call, contact_id)
        state, detail = trial.result(conn, notice_id)
    return ContactTest(state=cast(NoticeState, state), at=call.now, detail=detail or None)


def _contact(each: stored.Reach) -> Contact:
    test = None
    if each.test_state is not None and each.test_at is not None:
        test = ContactTest(
            state=cast(NoticeState, each.test_state), at=shapes.as_utc(each.test_at), detail=each.test_detail
        )
    return Contact(
        id=str(each.id),
        way=cast(Way, each.way),
        address=stored.shown(each.way, each.address),
        label=each.label,
        test=test,
    )
