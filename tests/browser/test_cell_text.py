"""What stands in a cell is read back by the service as the value it was made from: looking at it changes nothing."""

import json
from decimal import Decimal

from bandwright.documents.brief import cell_value

WRITTEN = """async (values) => {
  const script = document.querySelector('script[type=module]').src;
  const { textOf } = await import(new URL('lib/cell_text.js', script).href);
  return values.map(textOf);
}"""

MORE = [
    ("link", "on_air", [{"start": "19:30", "end": "23:00"}, {"start": "2027-05-14", "end": "2027-05-15"}]),
    ("link", "apart_from", ["L01", "L02"]),
    ("radio", "presets", [{"label": "A1", "mhz": 863.1}, {"label": "B 2", "mhz": 864.9}]),
    ("radio", "front_end_shared", False),
    ("permit", "max_power", {"any_mw": 50, "kind": "eirp"}),
    ("permit", "closed_mhz", [[610, 610.2]]),
    ("isolation", "between", ["main", "hall"]),
    ("isolation", "db", -3.5),
    ("other", "makes_products", "auto"),
    ("other", "makes_products", True),
    ("plan", "spares", {"heron": 2, "heron/narrow": 0}),
]


def plain(value):
    """Return a value of the service as the page gets it: numbers as JSON has them."""
    return json.loads(json.dumps(value, default=lambda number: float(number) if isinstance(number, Decimal) else None))


def written(seat, values: list) -> list[str]:
    return seat.page.evaluate(WRITTEN, values)


def test_every_cell_of_the_demonstration_is_read_back_as_it_is(sit, app):
    entries = app.client().get("/api/brief").json()["entries"]
    cells = [(entry["kind"], field, value) for entry in entries for field, value in entry["value"].items()]
    texts = written(sit(), [value for _, _, value in cells])
    wrong = [
        (kind, field, text)
        for (kind, field, value), text in zip(cells, texts, strict=True)
        if plain(cell_value(kind, field, text)) != value
    ]
    assert len(cells) > 100
    assert wrong == []


def test_what_the_demonstration_does_not_have_is_read_back_too(sit):
    texts = written(sit(), [value for _, _, value in MORE])
    read = [plain(cell_value(kind, field, text)) for (kind, field, _), text in zip(MORE, texts, strict=True)]
    assert read == [value for _, _, value in MORE]
