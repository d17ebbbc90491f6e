"""The JSON API of the public contract, under `/api/v1`."""

from fastapi import APIRouter

from wickwatch.web.api import alarms, channels, contacts, measures, readings, rooms, rota, service, work
from wickwatch.web.problems import RESPONSES

router = APIRouter(prefix="/api/v1", responses=RESPONSES)
router.include_router(rooms.router)
router.include_router(channels.router)
router.include_router(readings.router)
router.include_router(alarms.router)
router.include_router(rota.router)
router.include_router(measures.router)
router.include_router(work.router)
router.include_router(contacts.router)
router.include_router(service.router)

__all__ = ["router"]
