"""The first file of a shop: one note that is shown, and an example of every other line, commented out."""

from __future__ import annotations

from pathlib import Path

from engine.errors import LaybyError
from engine.journal import disk
from engine.library import schema_place

STARTER = "rich-running.yaml"
"""Name of the file written."""

_TEXT = """\
# yaml-language-server: $schema={schema}
#
# What this shop knows and the shipped trees do not. The example: a small shop that looks after a bakery's
# delivery vans, all with the same 1.6 engine, in a town of short trips.
#
# Every line says what it changes, who stands for it (by), when (on) and why (reason). Without by: it is
# listed as unagreed. Of two lines about the same thing the later one holds; files are read in the order
# of their names. The shipped files are never touched: take a line out here and all is as before.
#
#   layby shop limits trim      names of limits, with figure and unit
#   layby shop steps TREE       names of a tree's steps and rules
#   layby faults WORD           names of faults
#   layby readings veh          facts about the car, for cars:
#
# To use an example, take the "# " away from all its lines; then: layby check, and layby shop.

format: 1
extends: rich-running

# A note, shown on the step and marked as this shop's, with its age.
notes:
  - at: gas
    text: "Example, to be replaced: the analyser in the old van needs ten minutes before it can be believed."
    on: "{today}"

# A limit for one engine. value is in the limit's own unit. Leave cars: out for every car.
# limits:
#   - limit: trim_rich_watch
#     cars: {{veh_engine_litres: {{at_least: 1.5, at_most: 1.7}}, veh_fuel_system: {{is: port_return}}}}
#     value: -8
#     by: shop lead
#     on: "{today}"
#     reason: short trips put fuel into the oil, the vans read minus seven with nothing wrong

# A maker's figure from a plate or a handbook, so that it need not be typed at every car.
# makers:
#   - reading: spec_fuel_pressure
#     cars: {{veh_engine_litres: {{at_least: 1.5, at_most: 1.7}}, veh_fuel_system: {{is: port_return}}}}
#     value: 300
#     by: shop lead
#     on: "{today}"
#     reason: on the plate at the fuel rail

# The weight of a fault before anything is measured: 4 is four times as likely as shipped, 0.5 half.
# until: is the last day it holds; leave it out when it has no end.
# weights:
#   - fault: oil_fuel_diluted
#     times: 4
#     cars: {{veh_engine_litres: {{at_least: 1.5, at_most: 1.7}}, veh_fuel_system: {{is: port_return}}}}
#     by: shop lead
#     on: "{today}"
#     until: "{until}"
#     reason: eleven of thirteen vans this year

# A caution shown before a step, beside the shipped ones.
# warn:
#   - at: gas
#     cautions: [C-CO]
#     by: shop lead
#     on: "{today}"
#     reason: the yard is closed on three sides
"""


def write_starter(folder: Path, today: str, until: str) -> Path:
    """Write the first file of a shop into *folder*, which is made when it is not there.

    Args:
        folder: the shop's folder.
        today: the day written into the examples, ``2026-05-31``.
        until: the last day of the example that ends.

    Raises:
        LaybyError: there is such a file, or it cannot be written.
    """
    path = folder / STARTER
    text = _TEXT.format(schema=schema_place("overlay"), today=today, until=until)
    try:
        disk.make_folder(folder)
        disk.write_new(path, text.encode("utf-8"))
    except FileExistsError as error:
        raise LaybyError(
            f"{path}: is there already and stays as it is; edit it, or name another folder"
        ) from error
    except OSError as error:
        raise LaybyError(f"{path}: cannot be written: {disk.plain_reason(error)}") from error
    return path
