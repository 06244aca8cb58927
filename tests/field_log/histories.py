"""Random histories of field work over a few plots and rounds, and a plain second opinion of what they mean.

The second opinion is written the slow and obvious way, from the rules of the count sheet alone: it shares no
code with what it checks.
"""

import random
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any
from uuid import UUID

PLANTED_ON = date(2024, 3, 1)
PLANTED = 20


@dataclass
class World:
    """What a history happens in, by uid."""

    plots: list[str]
    rounds: dict[str, tuple[date, date]]  # opens, closes
    baselines: dict[str, str]  # line -> plot, each planted 20 on `PLANTED_ON`
    species: str


@dataclass
class Record:
    """One record as some phone wrote it."""

    id: UUID
    body: dict[str, Any]


@dataclass
class Choice:
    """A lead's decision about a doubt; `head` or `roots` is what the lead saw."""

    id: UUID
    kind: str
    plot: str
    round: str
    root: str
    body: dict[str, Any]


@dataclass
class History:
    world: World
    records: list[Record] = field(default_factory=list)
    choices: list[Choice] = field(default_factory=list)


class Maker:
    """Makes a history from a seed."""

    def __init__(self, world: World, seed: int) -> None:
        self.rng, self.history = random.Random(seed), History(world)

    def make(self, size: int = 16, choices: int = 4) -> History:
        for _ in range(size):
            old = self.history.records
            step = self.rng.random()
            if step < 0.45 and old:
                self.correct(self.rng.choice(old))
            elif step < 0.6:
                self.tell_baseline()
            else:
                self.count()
        for _ in range(choices):
            self.decide()
        return self.history

    def uid(self) -> UUID:
        return UUID(int=self.rng.getrandbits(128), version=4)

    def add(self, id_: UUID, body: dict[str, Any]) -> None:
        self.history.records.append(Record(id_, body))

    def day(self, round_uid: str) -> str:
        opens, _closes = self.history.world.rounds[round_uid]
        return (opens + timedelta(days=self.rng.choice([0, 0, 1, 5, 90]))).isoformat()

    def count(self) -> None:
        id_, plot = self.uid(), self.rng.choice(self.history.world.plots)
        round_uid = self.rng.choice(list(self.history.world.rounds))
        status = self.rng.choice(["counted"] * 6 + ["destroyed", "missing"])
        reason = {"counted": "", "destroyed": "burnt", "missing": "unsafe"}[status]
        self.add(id_, {
            "visit": str(id_), "parents": [], "plot": plot, "round": round_uid, "purpose": "survival",
            "observed_on": self.day(round_uid), "status": status, "reason": reason,
            "lines": self.lines(plot) if status == "counted" else [], "removals": self.removals(plot),
        })  # fmt: skip

    def lines(self, plot: str) -> list[dict[str, Any]]:
        named = [line for line, at in self.history.world.baselines.items() if at == plot]
        return [
            {"baselines": [line], "species": self.history.world.species, "alive": self.rng.randrange(24),
             "dead_stem": self.rng.choice([0, 0, 2])} for line in named
        ]  # fmt: skip

    def removals(self, plot: str) -> list[dict[str, Any]]:
        """Sometimes a removal, sometimes two of one baseline and day for two reasons."""
        named = [line for line, at in self.history.world.baselines.items() if at == plot]
        told = {
            "baseline": self.rng.choice(named),
            "removed_on": self.rng.choice(["2024-08-01", "2025-02-01"]),
        }
        return [
            told | {"alive_removed": self.rng.randrange(1, 5), "reason": reason}
            for reason in ("thinning", "theft")[: self.rng.choice([0, 0, 0, 1, 2])]
        ]

    def tell_baseline(self) -> None:
        id_ = self.uid()
        line, plot = self.rng.choice(list(self.history.world.baselines.items()))
        told = {"uid": line, "species": self.history.world.species, "planted": self.rng.randrange(12, 26),
                "counted_on": self.rng.choice(["2024-03-01", "2024-03-05", "2024-04-01"])}  # fmt: skip
        self.add(id_, {
            "visit": str(id_), "parents": [], "plot": plot, "round": None, "purpose": "baseline",
            "observed_on": "2024-03-01", "status": "counted", "baselines": [told],
        })  # fmt: skip

    def correct(self, old: Record) -> None:
        """Correct a revision: other numbers, sometimes another plot or round, sometimes odd parents."""
        body, rng = dict(old.body), self.rng
        if body["purpose"] == "baseline":
            body["baselines"] = [b | {"planted": rng.randrange(12, 26)} for b in body["baselines"]]
            body["baselines"] = body["baselines"] if rng.random() < 0.8 else []
        elif rng.random() < 0.15:
            body["plot"] = rng.choice(self.history.world.plots)
            body["round"] = rng.choice(list(self.history.world.rounds))
            body["lines"], body["removals"] = self.lines(body["plot"]), []
        else:
            body["lines"], body["removals"] = self.lines(body["plot"]), self.removals(body["plot"])
            body |= {"status": "counted", "reason": ""}
        same = [str(r.id) for r in self.history.records if r.body["visit"] == body["visit"]]
        odd = [[], same, [str(self.uid())], [str(rng.choice(self.history.records).id)]]
        body["parents"] = [str(old.id)] if rng.random() < 0.8 else rng.choice(odd)
        self.add(self.uid(), body)

    def decide(self) -> None:
        record = self.rng.choice([r for r in self.history.records if r.body["round"]])
        body, rng = record.body, self.rng
        where = {"plot": body["plot"], "round": body["round"]}
        if rng.random() < 0.4:
            roots = sorted({r.body["visit"] for r in self.history.records})
            told = {"as": "use", "root": body["visit"], "roots": roots}
            kind, root = "second_root", body["plot"]
        else:
            told = {"as": rng.choice(["accept", "discard"]), "head": str(record.id)}
            kind, root = rng.choice(["over_baseline", "late", "forked"]), body["visit"]
        told |= {"reason": "seen", "plot": body["plot"]}
        self.history.choices.append(Choice(self.uid(), kind, root=root, body=told, **where))


# --- the second opinion ---------------------------------------------------------------------
class Opinion:
    """What a history means once everything has arrived."""

    def __init__(self, history: History) -> None:
        self.world = history.world
        self.bodies = {record.id: record.body for record in history.records}
        self.choices = history.choices
        self.heads = {self.head(root) for root in {body["visit"] for body in self.bodies.values()}}
        self.put_aside = self.discards()
        self.counting = {place: self.winner(place) for place in self.places() if self.contenders(place)}

    def parents(self, id_: UUID) -> list[str]:
        body = self.bodies[id_]
        if str(id_) == body["visit"]:
            return []
        return [p for p in body["parents"] if p != str(id_)] or [body["visit"]]

    def kin(self, id_: UUID) -> list[UUID]:
        root = self.bodies[id_]["visit"]
        named = [UUID(p) for p in self.parents(id_)]
        return [p for p in named if p in self.bodies and self.bodies[p]["visit"] == root]

    def depth(self, id_: UUID) -> int:
        below = [self.depth(p) + 1 for p in self.kin(id_)]
        return max([*below, 1 if self.is_orphan(id_) else 0])

    def is_orphan(self, id_: UUID) -> bool:
        return len(self.kin(id_)) < len(self.parents(id_))

    def leaves(self, root: str) -> list[UUID]:
        members = [id_ for id_, body in self.bodies.items() if body["visit"] == root]
        return [id_ for id_ in members if not any(id_ in self.kin(other) for other in members)]

    def head(self, root: str) -> UUID:
        return max(self.leaves(root), key=lambda id_: (self.depth(id_), id_))

    def discards(self) -> set[str]:
        last = {(c.kind, c.root): c.body["as"] for c in self.choices if c.kind != "second_root"}
        return {root for (_kind, root), word in last.items() if word == "discard"}

    def places(self) -> set[tuple[str, str]]:
        bodies = [self.bodies[id_] for id_ in self.heads]
        return {(body["plot"], body["round"]) for body in bodies if body["round"]}

    def contenders(self, place: tuple[str, str]) -> list[UUID]:
        here = [id_ for id_ in self.heads if (self.bodies[id_]["plot"], self.bodies[id_]["round"]) == place]
        here = [id_ for id_ in here if self.bodies[id_]["visit"] not in self.put_aside]
        counted = [id_ for id_ in here if self.bodies[id_]["status"] != "missing"]
        ranked = sorted(
            counted or here, key=lambda id_: (self.bodies[id_]["observed_on"], self.bodies[id_]["visit"])
        )
        return ranked if counted else ranked[:1]

    def winner(self, place: tuple[str, str]) -> UUID:
        ranked = self.contenders(place)
        words = [
            c.body["root"] for c in self.choices if c.kind == "second_root" and (c.plot, c.round) == place
        ]
        chosen = [id_ for id_ in ranked if words and self.bodies[id_]["visit"] == words[-1]]
        return (chosen or ranked)[0]

    def standing(self) -> list[UUID]:
        return [id_ for id_ in self.heads if self.bodies[id_]["visit"] not in self.put_aside]

    def planted(self, line: str) -> int:
        told = [("2024-03-01", "", PLANTED)]
        for id_ in self.standing():
            for row in self.bodies[id_].get("baselines", []):
                if row["uid"] == line:
                    told.append((row["counted_on"], id_.hex, row["planted"]))
        return max(told)[2]

    def removed(self, line: str, by: str) -> int:
        told: dict[str, dict[UUID, int]] = {}
        for id_ in self.standing():
            for row in self.bodies[id_].get("removals", []):
                if row["baseline"] == line and row["removed_on"] <= by:
                    of_day = told.setdefault(row["removed_on"], {})
                    of_day[id_] = of_day.get(id_, 0) + row["alive_removed"]
        return sum(max(of_day.values()) for of_day in told.values())

    def not_found(self, id_: UUID, line: dict[str, Any]) -> int:
        (uid,) = line["baselines"]
        there = self.planted(uid) - self.removed(uid, self.bodies[id_]["observed_on"])
        return max(0, there - line["alive"] - line["dead_stem"])

    def flags(self, id_: UUID) -> set[str]:
        """The flags this opinion knows of; contradictions and open sums have tests of their own."""
        body = self.bodies[id_]
        place, root, day = (body["plot"], body["round"]), body["visit"], body["observed_on"]
        rivals = [self.bodies[one]["visit"] for one in self.contenders(place)] if body["round"] else []
        above = [
            line["alive"] > max(0, self.planted(uid) - self.removed(uid, day))
            for line in body.get("lines", ()) for uid in line["baselines"]
        ]  # fmt: skip
        late = body["round"] and date.fromisoformat(day) > self.world.rounds[body["round"]][1]
        found = {
            "over_baseline": any(above), "late": late, "orphan": self.is_orphan(id_),
            "forked": len(self.leaves(root)) > 1, "second_root": len(rivals) > 1 and root in rivals,
        }  # fmt: skip
        return {name for name, holds in found.items() if holds}

    def cases(self) -> set[tuple[str, str, str]]:
        """Return (kind, plot, visit or plot) of each doubt about visits that count, compete or were put aside."""
        found = set()
        for id_ in self.heads:
            body = self.bodies[id_]
            root, aside = body["visit"], body["visit"] in self.put_aside
            competes = body["round"] is None or id_ in self.contenders((body["plot"], body["round"]))
            kinds = self.flags(id_) if competes or aside else set()
            if aside:
                kinds |= {c.kind for c in self.choices if c.root == root and c.kind != "second_root"}
            found |= {(k, body["plot"], body["plot"] if k == "second_root" else root) for k in kinds}
        return found
