"""What a plan's document says whatever the plan: cautions with who decides, the method, a few words explained."""

from django.utils.translation import gettext as _


def cautions() -> list[dict[str, str]]:
    """Stage, what can go wrong, usual care, and whose word counts: reminders that approve nothing."""
    return [_row(*each) for each in (*_before(), *_on_the_day(), *_afterwards())]


def _row(stage: str, danger: str, care: str, ask: str) -> dict[str, str]:
    return {"stage": stage, "danger": danger, "care": care, "ask": ask}


def _before() -> list[tuple[str, str, str, str]]:
    return [
        (
            _("Visiting the site"),
            _(
                "Being alone, traffic, animals, hunting, old wells, tides, ticks and snakes, unexploded ordnance"
            ),
            _(
                "Tell somebody when you go and when you are back; go in pairs; carry first aid; ask about the place"
            ),
            _("The landholder, rangers, the local authority, where it applies the mine-action authority"),
        ),
        (
            _("Before the first hole"),
            _(
                "Cables and pipes underground and overhead, contaminated ground, protected species, old remains"
            ),
            _("Have them searched for in writing; stop work and report when something unknown turns up"),
            _("Owners of the cables and pipes; the environment, heritage and forestry authorities"),
        ),
        (
            _("Species and stock"),
            _("Pests and diseases that travel with plants; plants that spread; thorns, poison, allergies"),
            _("Ask for plant-health papers, look at every delivery, keep doubtful plants apart"),
            _("The national plant-protection organisation; the nursery's inspector"),
        ),
        (
            _("Gathering seed"),
            _("Falls from trees; dust of seed treatments"),
            _("Only trained climbers leave the ground; gloves and a mask for treated seed"),
            _("A climbing assessor; the product's label"),
        ),
        (
            _("Weed killers and other chemicals"),
            _("Poisoning, drift, water"),
            _(
                "Only trained and registered people; the label is the law; keep away from water; have a spill kit"
            ),
            _("The regulator; a certified applicator; the poison centre"),
        ),
    ]


def _on_the_day() -> list[tuple[str, str, str, str]]:
    return [
        (
            _("Transport and lifting"),
            _(
                "Overload, crushed hands and feet; a full tray can weigh 15 kg, a root ball of 60 cm about 140 kg"
            ),
            _("Use a machine or trolley; two people do not lift twice as much; tie loads down"),
            _("A competent lifting supervisor; the driver"),
        ),
        (
            _("Hand tools"),
            _("Cuts, blows, strained backs, eyes"),
            _("Keep a tool's length and more apart; boots, gloves, glasses; change tasks; warm up"),
            _("The crew leader; the ILO code on safety and health in forestry work (1998)"),
        ),
        (
            _("Saws, augers, machines"),
            _("Kick-back, being drawn in, roll-over"),
            _("Certified operators inside a cleared zone; volunteers never"),
            _("A certified trainer"),
        ),
        (
            _("Heat"),
            _("Heat illness"),
            _(
                "Get used to it over days, shade, about a glass of water every 15 to 20 minutes, agree when to stop"
            ),
            _("Occupational health; the weather service"),
        ),
        (
            _("Cold, thunder, wind"),
            _("Exposure, lightning, falling limbs"),
            _(
                "Shelter at the first thunder and wait half an hour after the last; no work under trees in high wind"
            ),
            _("The weather service"),
        ),
        (
            _("Water nearby"),
            _("Drowning"),
            _("Nobody works alone at water; life-jackets"),
            _("The coastguard or river authority"),
        ),
        (
            _("Fire in the dry season"),
            _("Fires started by tools, vehicles or cigarettes"),
            _("Look up the fire danger, know the way out, carry tools; burn nothing without a permit"),
            _("The fire service"),
        ),
        (
            _("Boots, ticks, animals"),
            _("Diseases of people and plants carried from site to site"),
            _("Cover skin, wash hands, clean and disinfect boots and tools between sites"),
            _("Public-health and plant-health agencies"),
        ),
        (
            _("Volunteers and children"),
            _("Work they are not fit for; consent; being looked after"),
            _("Written consent, a lowest age, a trained lead, light tasks"),
            _("The safeguarding officer; the law"),
        ),
    ]


def _afterwards() -> list[tuple[str, str, str, str]]:
    return [
        (
            _("Water for the trees"),
            _("Trailer tanks that sway; rights to water; germs in warm tanks"),
            _("Braked trailers, tanks full or empty, a licence to draw water"),
            _("The water authority"),
        ),
        (
            _("When the trees have grown"),
            _("Lines overhead, buildings, roads, roots in drains"),
            _("Keep distances from the beginning"),
            _("An arboriculturist; owners of the lines; the highways authority"),
        ),
    ]


def caution() -> str:
    return _(
        "This plan records and reminds; it approves nothing. Laws, local codes, authorities and competent people on "
        "the spot decide, and their word goes before every line here."
    )


def method() -> list[str]:
    """How the figures came about, and what they cannot tell."""
    return [
        _(
            "Areas are measured on the WGS 84 ellipsoid where a boundary is drawn, else as stated. Planting spots "
            "are net area times density by the spacing, or as stated. Of sown seed, plants stands for seed spots, "
            "and a spot with a living seedling is one living tree. Windows follow from monthly climate normals, the "
            "soil and rules of common practice, or are stated by the manager; a single year can be quite different. "
            "Expected living trees are plants times the survival expected at the check age, from counted plantings "
            "where there are any, else as stated or common practice; the source stands beside each. Kinds are taken "
            "to do well or badly by themselves; a year that is bad for all at once is not in the limits. Money is as "
            "planned by the manager; the sum set aside stands apart. Gains and carbon are ranges, never promises; "
            "where they rest on living trees, their limits are those of all kinds doing badly together and all doing "
            "well, so wider."
        ),
        _(
            "A plan does not know the weather to come, animals, fire, or what was never entered. Whether trees live is "
            "found out by counting plots after planting."
        ),
    ]


def glossary() -> list[list[str]]:
    """A few words explained."""
    return [
        [_("block"), _("ground that is planted and counted as one: one site, one project")],
        [
            _("stock type"),
            _("how a plant arrives: seed, bare-root, in a container, with a root ball, as a cutting"),
        ],
        [_("planting window"), _("the days on which stock can take root before drought, heat or hard frost")],
        [_("wave"), _("first or second planting of one plan; shade-bearing trees follow under nurse trees")],
        [_("check age"), _("the number of completed growing seasons after which survival is judged")],
        [
            _("effective number of species"),
            _("how many equally common species would be as varied as the mix"),
        ],
        [_("latest order date"), _("the last day on which an order still comes in time, spare weeks kept")],
        [_("set aside"), _("money kept for the unforeseen, a share of everything planned")],
    ]
