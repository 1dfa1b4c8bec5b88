"""The advice against rules of thumb on the same simulated jobs.

    python -m tests.bench.simulated_shop --jobs 2000 --kind thread --seed 7

prints cost a job = passes + 60 x scrapped share + 5 x share left outside on the big side.  A repeat
reading counts as a whole pass.  Results are kept in the folder --state as they come, so a run that
was stopped goes on where it was; another version of the advice starts afresh.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import math
import random
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from server.advice.model import Action, Cut, Entry, Job, Prior, Reading
from server.advice.nextcut import next_cut
from tests.bench.simulated_world import KINDS, Lathe, Task, draw

SCRAP_COST, OUTSIDE_COST = 60, 5
_MOST_PASSES = 40


@dataclass
class Outcome:
    """One job under one rule.  landings: low, high, chance in limits, size, reading, limit."""

    passes: int = 0
    repeats: int = 0
    scrapped: bool = False
    outside: bool = False
    clean: bool = True
    past_spent: float = 0.0
    landings: list[list[float]] = field(default_factory=list)

    @property
    def cost(self) -> float:
        lost = SCRAP_COST * self.scrapped + OUTSIDE_COST * self.outside
        return self.passes + self.repeats + lost


def verdict_of(reading: float, task: Task) -> str:
    """Section 6 of the design, on a stock."""
    if reading > task.half_tolerance + task.guard:
        return "stock_left"
    if reading < -task.half_tolerance - task.guard:
        return "past_limit"
    if abs(reading) <= task.half_tolerance - task.guard:
        return "in_limits"
    return "too_close"


def _down(depth: float, graduation: float) -> float:
    """At least one graduation: metal is still on."""
    return max(math.floor(depth / graduation + 1e-6), 1) * graduation


def all_that_is_left(stock: float, task: Task) -> float:
    return _down(stock, task.graduation)


def half(stock: float, task: Task) -> float:
    return _down(stock / 2, task.graduation)


def two_thirds(stock: float, task: Task) -> float:
    return _down(stock * 2 / 3, task.graduation)


def creep(stock: float, task: Task) -> float:
    """All but two thousandths of an inch, then one graduation at a time."""
    return _down(stock - 0.0508, task.graduation)


RULES: dict[str, Callable[[float, Task], float]] = {
    "all that is left": all_that_is_left,
    "half": half,
    "two thirds": two_thirds,
    "creep": creep,
}


def run_rule(lathe: Lathe, rule: Callable[[float, Task], float]) -> Outcome:
    outcome = Outcome()
    while outcome.passes < _MOST_PASSES:
        reading, _ = lathe.read()
        verdict = verdict_of(reading, lathe.task)
        if verdict in ("in_limits", "past_limit") or (verdict == "too_close" and reading < 0):
            break
        lathe.cut(rule(reading, lathe.task))
        outcome.passes += 1
    return _judged(outcome, lathe)


def run_advice(lathe: Lathe, prior: Prior | None = None) -> Outcome:
    task, outcome = lathe.task, Outcome()
    history: list[Entry] = []
    same: list[float] = []
    expected: list[float] | None = None
    while outcome.passes + outcome.repeats < _MOST_PASSES:
        reading, scatter = lathe.read()
        history.append(Reading(reading, scatter))
        same = [r for r in same if abs(r - reading) <= 6 * scatter] + [reading]
        if expected is not None:
            outcome.landings.append([*expected, lathe.stock, reading])
            expected = None
        advice = next_cut(
            history,
            _job(task, outcome.past_spent),
            verdict_of(sum(same) / len(same), task),
            str,
            prior=prior,
        )
        if advice is None:
            break
        if advice.action is Action.MEASURE_AGAIN:
            if len(same) >= 3:
                break
            outcome.repeats += 1
            continue
        if not advice.is_pass:
            break  # no step of the dial will do, and this shop has no finer feed
        lathe.cut(advice.step_mm)
        outcome.passes += 1
        outcome.past_spent += advice.chance_past_limit
        history.append(Cut(advice.step_mm))
        same = []
        landing = advice.landing
        expected = [landing.low_mm, landing.high_mm, advice.chance_in_limits]
    return _judged(outcome, lathe)


def _job(task: Task, spent: float) -> Job:
    return Job(
        kind=task.kind,
        stock_at_metal_limit_mm=task.half_tolerance,
        stock_at_past_limit_mm=-task.half_tolerance,
        graduation_mm=task.graduation,
        guard_mm=task.guard,
        common_uncertainty_mm=task.common,
        reading_scatter_mm=task.scatter,
        total_depth_mm=task.total_depth,
        past_chance_spent=spent,
    )


def _judged(outcome: Outcome, lathe: Lathe) -> Outcome:
    limit = lathe.task.half_tolerance
    outcome.scrapped = lathe.stock < -limit
    outcome.outside = lathe.stock > limit
    outcome.clean = not (lathe.blundered or lathe.chipped)
    for landing in outcome.landings:
        landing.append(limit)
    return outcome


def run_job(kind: str, seed: int, number: int, **scaled: float) -> dict[str, Outcome]:
    """Every rule and the advice on one job."""

    def fresh() -> Lathe:
        return draw(kind, random.Random(f"{seed} {kind} {number}"), **scaled)

    results = {name: run_rule(fresh(), rule) for name, rule in RULES.items()}
    results["advice"] = run_advice(fresh())
    return results


def _kept(state: Path) -> dict[int, dict[str, Any]]:
    """Jobs already run, by number; a line cut short by a stop is run again."""
    done: dict[int, dict[str, Any]] = {}
    if state.exists():
        for line in state.read_text().splitlines():
            try:
                record = json.loads(line)
            except ValueError:
                continue
            done[record["job"]] = record["rules"]
    return done


def run_jobs(
    kind: str, jobs: int, seed: int, state: Path | None = None, **scaled: float
) -> list[dict[str, Outcome]]:
    """Every job, those kept in the state file read from there."""
    done = _kept(state) if state is not None else {}
    results = []
    for number in range(jobs):
        if number in done:
            results.append({name: Outcome(**o) for name, o in done[number].items()})
            continue
        result = run_job(kind, seed, number, **scaled)
        results.append(result)
        if state is not None:
            _keep(state, number, result)
    return results


def _keep(state: Path, number: int, result: dict[str, Outcome]) -> None:
    rules = {name: asdict(outcome) for name, outcome in result.items()}
    with state.open("a") as file:
        file.write("\n" + json.dumps({"job": number, "rules": rules}))


@dataclass(frozen=True)
class Summary:
    cost: float
    passes: float
    repeats: float
    scrapped: float
    outside: float


def summary(outcomes: Sequence[Outcome]) -> Summary:
    n = len(outcomes)
    return Summary(
        cost=sum(o.cost for o in outcomes) / n,
        passes=sum(o.passes for o in outcomes) / n,
        repeats=sum(o.repeats for o in outcomes) / n,
        scrapped=sum(o.scrapped for o in outcomes) / n,
        outside=sum(o.outside for o in outcomes) / n,
    )


def ratio(results: Sequence[dict[str, Outcome]]) -> float:
    """Cost of the advice over that of the best fixed rule."""
    best = min(summary([r[name] for r in results]).cost for name in RULES)
    return summary([r["advice"] for r in results]).cost / best


def clean_landings(results: Sequence[dict[str, Outcome]]) -> list[list[float]]:
    """low, high, chance in limits, true stock, reading, limit; jobs without blunder or chip."""
    return [landing for r in results if r["advice"].clean for landing in r["advice"].landings]


def coverage(landings: Sequence[Sequence[float]]) -> tuple[float, float]:
    """Share of true sizes and of readings inside the 90 % interval."""
    n = max(len(landings), 1)
    return (
        sum(low <= true <= high for low, high, _, true, *_ in landings) / n,
        sum(low <= reading <= high for low, high, _, _, reading, _ in landings) / n,
    )


def calibration(landings: Sequence[Sequence[float]]) -> list[tuple[float, float, int]]:
    """Stated chance in limits, share found in limits, count; by tenths of the chance."""
    rows = []
    for tenth in range(10):
        chosen = [x for x in landings if min(int(x[2] * 10), 9) == tenth]
        if chosen:
            stated = sum(x[2] for x in chosen) / len(chosen)
            found = sum(abs(x[3]) <= x[5] for x in chosen) / len(chosen)
            rows.append((stated, found, len(chosen)))
    return rows


def print_table(kind: str, results: Sequence[dict[str, Outcome]], seed: int) -> None:
    print(f"{kind}: {len(results)} jobs, seed {seed}")
    print(f"  {'rule':18} {'cost':>7} {'passes':>7} {'repeats':>7} {'scrap %':>8} {'outside %':>9}")
    for name in results[0]:
        s = summary([r[name] for r in results])
        print(
            f"  {name:18} {s.cost:7.2f} {s.passes:7.2f} {s.repeats:7.2f} "
            f"{100 * s.scrapped:8.2f} {100 * s.outside:9.2f}"
        )
    landings = clean_landings(results)
    true, read = coverage(landings)
    print(f"  advice over the best rule {ratio(results):.3f}")
    print(f"  90 % landing holds {100 * true:.1f} % of sizes, {100 * read:.1f} % of readings")
    print("  chance in limits, stated/found (count): ", end="")
    print("  ".join(f"{p:.2f}/{f:.2f} ({n})" for p, f, n in calibration(landings)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--jobs", type=int, default=200)
    parser.add_argument("--kind", choices=(*KINDS, "all"), default="all")
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--state", type=Path, help="folder in which results are kept as they come")
    args = parser.parse_args()
    folder = args.state or Path(tempfile.gettempdir()) / "midlimit-simulated-shop"
    folder.mkdir(parents=True, exist_ok=True)
    for kind in KINDS if args.kind == "all" else (args.kind,):
        state = folder / f"{kind}-{args.seed}-{core_mark()}.jsonl"
        print_table(kind, run_jobs(kind, args.jobs, args.seed, state), args.seed)


def core_mark() -> str:
    """Marks the code that ran, so that results of another version are not taken up again."""
    here = Path(__file__).resolve()
    files = [*sorted((here.parents[2] / "server" / "advice").glob("*.py")), here]
    files.append(here.with_name("simulated_world.py"))
    return hashlib.sha256(b"".join(f.read_bytes() for f in files)).hexdigest()[:10]


if __name__ == "__main__":
    main()
