"""Who may do what: one table from verb to roles. Roles are not ordered; each verb names its own."""

from projects.models.people import Role

MANAGER, LEAD, VOLUNTEER, FUNDER = Role.MANAGER, Role.FIELD_LEAD, Role.VOLUNTEER, Role.FUNDER
STAFF = frozenset({MANAGER, LEAD})
EVERYBODY = frozenset({MANAGER, LEAD, VOLUNTEER, FUNDER})

VERBS: dict[str, frozenset[Role]] = {
    # organisation and people
    "home.view": EVERYBODY,
    "organisation.edit": frozenset({MANAGER}),
    "people.view": frozenset({MANAGER}),
    "people.edit": frozenset({MANAGER}),
    "field_pass.view": STAFF,
    "field_pass.issue": STAFF,
    "history.view": STAFF,
    # places
    "project.view": EVERYBODY,
    "project.edit": frozenset({MANAGER}),
    "site.view": EVERYBODY,
    "site.edit": frozenset({MANAGER}),
    "block.view": EVERYBODY,
    "block.edit": STAFF,
    "assessment.view": STAFF,
    "season.view": EVERYBODY,
    "season.edit": frozenset({MANAGER}),
    # stock and planting
    "nursery.view": STAFF,
    "nursery.edit": frozenset({MANAGER}),
    "lot.view": STAFF,
    "lot.edit": STAFF,
    "order.view": STAFF,
    "order.edit": frozenset({MANAGER}),
    "planting.view": STAFF,
    "planting.edit": STAFF,
    "care.view": frozenset({MANAGER, LEAD, VOLUNTEER}),
    "care.edit": STAFF,
    "care.do": frozenset({MANAGER, LEAD, VOLUNTEER}),  # say that a task was done, or put it off
    "walk.view": STAFF,
    "walk.edit": STAFF,
    "day_rule.view": frozenset({MANAGER, LEAD, VOLUNTEER}),
    "day_rule.edit": STAFF,
    # plans
    "plan.view": STAFF,
    "plan.edit": frozenset({MANAGER}),
    "plan.approve": frozenset({MANAGER}),
    "seed.view": STAFF,
    "seed.edit": STAFF,
    # species
    "species.view": EVERYBODY,
    "species.edit": frozenset({MANAGER}),
    # survey
    "plot.view": frozenset({MANAGER, LEAD, VOLUNTEER}),
    "plot.edit": STAFF,
    "round.view": EVERYBODY,
    "round.edit": STAFF,
    "visit.add": frozenset({MANAGER, LEAD, VOLUNTEER}),
    "visit.view": STAFF,
    "upload.add": STAFF,
    "case.view": STAFF,
    "case.settle": STAFF,
    # results
    "result.view": EVERYBODY,
    "need.view": STAFF,
    "need.order": frozenset({MANAGER}),
    "performance.view": STAFF,
    "summary.view": EVERYBODY,
    "summary.make": frozenset({MANAGER}),
    "summary.share": frozenset({MANAGER}),
    "reminder.snooze": frozenset({MANAGER}),
    "reminder.assign": frozenset({MANAGER}),
    "letter.choose": EVERYBODY,  # one's own weekly letter and calendar addresses
    "trace.view": STAFF,
    "job.view": STAFF,
    "job.cancel": frozenset({MANAGER}),  # another person's; whoever started a job may call it off
}

# Members who see only the projects granted to them. A field lead without any grant sees all.
LIMITED_BY_GRANT = frozenset({FUNDER, VOLUNTEER})


def allows(role: Role | str | None, verb: str) -> bool:
    """Say whether a role may do a verb. An unknown verb is a programming mistake and raises."""
    roles = VERBS[verb]
    return role is not None and role in roles
