"""Pages for people, made by the server; reading them needs no script."""

from fastapi import APIRouter

from wickwatch.web.pages import (
    alarm_duty,
    alarm_list,
    alarms,
    answer,
    audit,
    contacts,
    health,
    invitations,
    live,
    me,
    measures,
    own_advice,
    own_password,
    reports,
    room,
    rota,
    rota_feed,
    set_up,
    set_up_channels,
    set_up_export,
    set_up_people,
    set_up_room,
    set_up_rules,
    sign_in,
    sign_in_openid,
    status,
    undelivered,
    work,
)

router = APIRouter(include_in_schema=False)
router.include_router(status.router)
router.include_router(live.router)
router.include_router(health.router)
router.include_router(room.router)
router.include_router(alarm_list.router)
router.include_router(alarms.router)
router.include_router(alarm_duty.router)
router.include_router(rota.router)
router.include_router(rota_feed.router)
router.include_router(answer.router)
router.include_router(measures.router)
router.include_router(reports.router)
router.include_router(work.router)
router.include_router(own_advice.router)
router.include_router(set_up.router)
router.include_router(set_up_channels.router)
router.include_router(set_up_room.router)
router.include_router(set_up_rules.router)
router.include_router(set_up_export.router)
router.include_router(invitations.router)
router.include_router(set_up_people.router)
router.include_router(sign_in.router)
router.include_router(sign_in_openid.router)
router.include_router(own_password.router)
router.include_router(me.router)
router.include_router(undelivered.router)
router.include_router(audit.router)
router.include_router(contacts.router)

__all__ = ["router"]
