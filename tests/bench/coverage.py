"""Coverage from cold: finding the need classes, and fitting every model to each; the quick way beside the whole fit alone.

    python tests/bench/coverage.py [--luminaires 100000] [--classes 400] [--models 200] [--turns 5] [--json]

The vault is `vault/bench/big_vault.py`'s: signed records, one control line for each 64 luminaires. Classes and models are
invented around the tests' good examples. The limit is 60 s for 1,000,000 luminaires and 200 models; where the vault is
smaller, finding the classes is stretched in proportion to the luminaires, and says so. The quick way, the whole fit alone and
what is remembered take turns; medians of processor time, which other work on the machine tells on least. Five turns take three
minutes on an idle machine of two slow cores.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import median
from typing import TypeVar

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parent / "domain")]

from domain_examples import (  # noqa: E402  (needs the path above)
    EMERGENCY_GEAR,
    EMERGENCY_RATING,
    EMERGENCY_SPARE,
    GEAR,
    RATING,
    SPARE,
    with_channel,
    with_module,
)

from vault.actions.cover_needs import needs_in_service  # noqa: E402
from vault.bench.big_vault import build  # noqa: E402
from vault.db.needs import need_groups  # noqa: E402
from vault.db.session import Vault  # noqa: E402
from vault.domain.driver import DriverModel, Window  # noqa: E402
from vault.spares.coverage import Need, need_of  # noqa: E402
from vault.spares.coverage_answers import answers_for, rules_version  # noqa: E402

LIMIT_S, WHOLE = 60.0, 1_000_000
SAMPLED = 16  # the whole fit of all pairs takes long: one class in so many stands for them
T = TypeVar("T")


def invented_needs(count: int) -> list[Need]:
    """Classes of ten currents, many types, general and emergency, each third under two ratings."""
    chance, found = random.Random(1), []
    for number in range(count):
        gear, rating = chance.choice([(GEAR, RATING), (GEAR, RATING), (EMERGENCY_GEAR, EMERGENCY_RATING)])
        current = chance.choice([250, 300, 350, 500, 600, 700, 800, 900, 1050, 1400])
        low = chance.randrange(12_000, 48_000, 3_000)
        code = f"T{number}"
        named = with_module(replace(rating, code=code), current_min_ma=current // 2, current_max_ma=current,
                            module_max_ma=current * 2, voltage_low_mv=low, voltage_high_mv=low + 6_000)
        ratings = (named, replace(named, revision=2, ta_c=40)) if number % 3 == 0 else (named,)
        found.append(need_of(with_channel(gear, current_ma=current), ratings, None, None, pieces=1, tags=(), named=(code, 1)))
    return found


def invented_models(count: int) -> list[DriverModel]:
    """Models of many currents, windows and powers."""
    chance, found = random.Random(2), []
    for number in range(count):
        spare = chance.choice([SPARE, SPARE, EMERGENCY_SPARE])
        least, most = chance.choice([(100, 500), (200, 700), (300, 1050), (350, 350), (500, 1400)])
        bottom, top = chance.choice([(6_000, 30_000), (15_000, 45_000), (24_000, 59_000)])
        window = Window(vertices=((least, bottom), (most + 1, bottom), (most + 1, top), (least, top)),
                        power_max_mw=most * top // 1200)
        found.append(replace(spare, model=f"M{number:03}", window=window, dimming_window=window, current_min_ma=least,
                             current_max_ma=most, power_total_max_mw=most * top // 1200))
    return found


def timed(work: Callable[[], T]) -> tuple[float, T]:
    """Seconds of processor time, and what came of it."""
    start = time.process_time()
    done = work()
    return time.process_time() - start, done


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name, least in (("luminaires", 100_000), ("classes", 400), ("models", 200), ("turns", 5)):
        asked.add_argument(f"--{name}", type=int, default=least)
    asked.add_argument("--json", action="store_true")
    given = asked.parse_args()
    needs, models = invented_needs(given.classes), invented_models(given.models)
    rules_version()
    quick, whole, remembered, grouping, finding = [], [], [], [], []
    for _ in range(given.turns):
        seconds, answered = timed(lambda: answers_for(needs, models))
        quick.append(seconds)
        whole.append(SAMPLED * timed(lambda: answers_for(needs[::SAMPLED], models, quick=False))[0])
        remembered.append(timed(lambda: answers_for(needs, models, known=answered.held))[0])  # noqa: B023  (called at once)
    with tempfile.TemporaryDirectory() as folder:
        address = f"{folder}/big.db"
        build(address, luminaires=given.luminaires, versions=1, processes=2)
        vault = Vault(address)
        for _ in range(given.turns):
            with vault.reading() as session:
                grouping.append(timed(lambda: need_groups(session))[0])
                finding.append(timed(lambda: needs_in_service(session))[0])
        vault.close()
    stretched = median(finding) * WHOLE / given.luminaires
    figures = {
        f"groups of {given.luminaires:,} luminaires by SQL": (median(grouping), None),
        f"classes of {given.luminaires:,} luminaires, verified": (median(finding), None),
        f"{given.classes} classes x {given.models} models, quick way first": (median(quick), None),
        f"{given.classes} classes x {given.models} models, whole fit alone (from every {SAMPLED}th class)": (median(whole), None),
        f"{given.classes} classes x {given.models} models, remembered": (median(remembered), None),
        f"from cold for {WHOLE:,} luminaires (classes stretched from {given.luminaires:,})": (stretched + median(quick), LIMIT_S),
    }
    told = {name: {"value": round(value, 3), "unit": "s", "limit": limit, "ratio": round(value / limit, 3) if limit else None}
            for name, (value, limit) in figures.items()}
    told["stopped the quick way"] = {"value": round(100 * answered.quickly / (given.classes * given.models), 1), "unit": "%",
                                     "limit": None, "ratio": None}
    if given.json:
        print(json.dumps(told, indent=2))
        return
    for name, one in told.items():
        limit = f"   limit {one['limit']:g} {one['unit']}, ratio {one['ratio']}" if one["limit"] else ""
        print(f"{name:<84}{one['value']:>10} {one['unit']}{limit}")


if __name__ == "__main__":
    main()
