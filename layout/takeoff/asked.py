"""What a job asks of the takeoff: its settings by name and kind."""

from __future__ import annotations

from typing import TypeVar

from layout.products import Alternate, Consumable
from layout.records import Job

Setting = TypeVar("Setting")


def asked(job: Job, name: str, kind: type[Setting]) -> Setting | None:
    """Return a setting of the job by its key in the job file, or None when the job does not give it."""
    found = job.extras.get(name)
    return found if isinstance(found, kind) else None


def consumables(job: Job) -> tuple[Consumable, ...]:
    """Return the tools and supplies that the job lists."""
    found = job.extras.get("consumables")
    return tuple(item for item in found if isinstance(item, Consumable)) if isinstance(found, tuple) else ()


def alternates(job: Job) -> tuple[Alternate, ...]:
    """Return the priced alternates that the job lists."""
    found = job.extras.get("alternates")
    return tuple(item for item in found if isinstance(item, Alternate)) if isinstance(found, tuple) else ()


NAMES = {
    "primer": "primer", "sealant": "sealant", "termination_bar": "termination bar",
    "drainage_board": "drainage board", "outlet_channel": "outlet channel", "adhesive": "adhesive",
    "protection": "protection", "consumables": "consumables", "labour": "labour",
}


def left_out(job: Job) -> list[str]:
    """Return the names of what a whole system has and this job does not name, so that nothing of it is counted."""
    return [name for key, name in NAMES.items() if key not in job.extras]
