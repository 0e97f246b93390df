"""The days of the winter as a calendar file (iCalendar, RFC 5545)."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import NAMESPACE_URL, uuid5

from icalendar import Calendar, Event

from eyefind.season.tables import Season
from eyefind.season.winter import Day


def calendar_file(season: Season, days: Sequence[Day], made_at: datetime) -> bytes:
    """Write days as a calendar file.

    Parameters
    ----------
    season : Season
        The season.
    days : sequence of Day
        The days; each becomes an event of a whole day.
    made_at : datetime
        When the file is made, with its offset.

    Returns
    -------
    bytes
        The file; a second import of the same days changes nothing, for each event
        keeps its identifier.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//eyefind//season//EN")
    calendar.add("version", "2.0")
    for day in days:
        event = Event()
        name = f"eyefind-{season.year}-{day.on.isoformat()}-{day.what}"
        event.add("uid", str(uuid5(NAMESPACE_URL, name)))
        event.add("dtstamp", made_at)
        event.add("dtstart", day.on)
        event.add("dtend", day.on + timedelta(days=1))
        event.add("summary", day.what)
        event.add("description", day.why)
        calendar.add_component(event)
    return bytes(calendar.to_ical())
