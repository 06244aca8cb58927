"""Searching for the best mix of a plan: long work in a process of its own, told as it goes, stopped when asked."""

import json
import os
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import figures
from projects.access import Actor
from projects.calc.mix import INFEASIBLE, NOTHING_FOUND, Mix
from projects.calc.mix_process import mix_of, question
from projects.errors import Refusal
from projects.models import Job, Plan
from projects.selectors.mix_choices import choices_of
from projects.selectors.mix_page import SEARCH, latest_search
from projects.selectors.mix_question import Question, question_of
from projects.selectors.mix_rules import PlanRules, rules_of
from projects.selectors.plans import frame_of
from projects.services import jobs, mixes
from projects.services.plans import draft_of

GAP = 0.001
LOOK_EVERY_SECONDS = 0.3
AFTER_SECONDS = 45  # beyond the limit: to say which rules contradict one another
LIMIT_GRACE = 3


def register() -> None:
    """Tell the jobs what to do for a search."""
    jobs.works[SEARCH] = search


@transaction.atomic
def start(*, actor: Actor, plan: Plan) -> Job:
    """Have the best mix of a draft searched for; while one search is under way no second begins."""
    locked = draft_of(actor, plan)
    running = latest_search(locked)
    if running is not None and running.state in jobs.ACTIVE:
        return running
    link = f"/o/{actor.organisation.slug}/plan/{plan.uid}/mix/"
    title = _("Searching the best mix of %(plan)s") % {"plan": locked.project.name}
    state = mixes.plan_state(locked)
    return jobs.start(actor=actor, kind=SEARCH, title=title, link=link, plan=str(plan.uid), state=state)


def search(job: Job, progress: jobs.Progress) -> dict[str, Any]:
    """Search, tell the best mix so far, and write it into the plan if nobody changed it meanwhile."""
    actor = jobs.actor_of(job)
    actor.require("plan.edit")
    plan = Plan.objects.select_related("project", "organisation").get(
        organisation_id=job.organisation_id, uid=UUID(job.parameters["plan"])
    )
    rules = rules_of(plan)
    asked = question_of(plan, choices_of(plan, frame_of(actor, plan), rules), rules)
    if not asked.options:
        raise Refusal(_("Nothing may be planted: see below what is left out of each block, and why."))
    told: dict[str, Any] = {}
    progress.total(rules.seconds)
    for mix in mixes_as_found(asked, rules, progress):
        told = kept(asked, mix, rules)
        jobs.mine(job).update(result=told)  # the page shows the best so far
    progress.stop_if_asked()
    progress.finish()
    return told | taken(actor, plan, job, told)


def mixes_as_found(asked: Question, rules: PlanRules, progress: jobs.Progress) -> Iterator[Mix]:
    """Yield each mix as the other process tells it; the process ends with the search, or when it is called off."""
    plain = question(
        asked.options, asked.grounds, asked.rules, aim=rules.aim, gap=GAP, time_limit_s=rules.seconds
    )
    begun, last = time.monotonic(), 0
    with solving(plain) as lines:
        while True:
            progress.stop_if_asked()
            elapsed = time.monotonic() - begun
            if elapsed > rules.seconds + LIMIT_GRACE + AFTER_SECONDS:
                return
            if int(elapsed) > last:
                progress.step(min(int(elapsed), rules.seconds) - min(last, rules.seconds))
                last = int(elapsed)
            try:
                line = lines.get(timeout=LOOK_EVERY_SECONDS)
            except queue.Empty:
                continue
            if line is None:
                return
            yield mix_of(line)


@contextmanager
def solving(plain: dict[str, Any]) -> Iterator["queue.Queue[str | None]"]:
    """Run the solver in a child process and give its lines; None at their end. The child never outlives this."""
    told = {name: value for name, value in os.environ.items() if not name.startswith("TALLYGROVE_")}
    child = subprocess.Popen(
        [sys.executable, "-m", "projects.mix_solver"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        cwd=settings.BASE_DIR, env=told,
    )  # fmt: skip
    lines: queue.Queue[str | None] = queue.Queue()

    def read() -> None:
        for line in child.stdout:
            lines.put(line)
        lines.put(None)

    reader = threading.Thread(target=read, daemon=True)
    try:
        reader.start()
        child.stdin.write(json.dumps(plain))
        child.stdin.close()
        yield lines
        with suppress(subprocess.TimeoutExpired):
            if child.wait(timeout=2):
                raise RuntimeError("the solver ended with an error")
    finally:
        child.kill()
        child.wait()
        reader.join()
        child.stdout.close()


def kept(asked: Question, mix: Mix, rules: PlanRules) -> dict[str, Any]:
    """What the job keeps of a mix."""
    lines = [
        {
            "block": each.ground.block.pk, "species": each.species.pk, "stock_type": each.stock_type,
            "wave": each.wave, "quantity": number, "price": each.offer.unit_price_minor,
            "currency": each.offer.currency,
            "reason": rules.reasons.get(str(each.species.pk), "") if each.status == "introduced" else "",
        }
        for each, number in zip(asked.candidates, mix.quantities, strict=True)
        if number
    ]  # fmt: skip
    return {
        "status": mix.status, "gap": mix.gap, "living": mix.living, "cost": mix.cost, "worth": mix.worth,
        "lines": lines, "blocks": [int(ground.name) for ground in asked.grounds],
        "give_up": [[rule.kind, list(rule.about)] for rule in mix.give_up], "ways_out": list(mix.ways_out),
        "taken": False,
    }  # fmt: skip


def taken(actor: Actor, plan: Plan, job: Job, told: dict[str, Any]) -> dict[str, Any]:
    """Write what was found into the plan, or say why that was left to a person."""
    if not told or told["status"] == NOTHING_FOUND:
        return {"message": _("No mix was found in the time given. Give it more time, or loosen a rule.")}
    if told["status"] == INFEASIBLE:
        return {"message": _("No mix obeys all these rules.")}
    if not told["lines"]:
        return {"message": _("The best mix plants nothing: no rule asks for a tree that is worth its money.")}
    if not jobs.mine(job).update(result=told):
        raise jobs.Cancelled  # somebody else took the job: this worker was gone too long
    job.result = told
    try:
        number = mixes.take_over(actor=actor, plan=plan, job=job, only_if=job.parameters["state"])
    except Refusal as refusal:
        return {"message": _("%(why)s The mix found is kept here.") % {"why": refusal.message}}
    words = ngettext(
        "The mix is in the plan: %(n)s line, within %(gap)s of the best there can be.",
        "The mix is in the plan: %(n)s lines, within %(gap)s of the best there can be.",
        number,
    )
    return {"taken": True, "message": words % {"n": number, "gap": figures.percent(told["gap"], 1)}}
