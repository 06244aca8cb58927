"""What the columns of a file of counts may mean, and the words by which a heading gives itself away.

The words are those crews write over their columns in English, Portuguese, Spanish, French and Swahili
(common practice, from memory); a person confirms every guess.
"""

from collections.abc import Sequence

from monitoring.calc.spreadsheet_cells import folded

NEEDED = ("plot", "species", "alive")
COUNTS = (
    "alive", "dead_stem", "empty_spot", "dead", "not_found", "not_assessed", "resprout", "origin_uncertain",
)  # fmt: skip
FIELDS = (
    "site",
    "block",
    "plot",
    "species",
    "lot",
    "planted",
    *COUNTS,
    "observed_on",
    "status",
    "reason",
    "note",
)

WORDS: dict[str, tuple[str, ...]] = {
    "site": ("site", "local", "sitio", "lugar", "lieu", "eneo"),
    "block": ("block", "stratum", "bloco", "talhao", "estrato", "bloque", "rodal", "bloc", "strate", "kitalu"),
    "plot": (
        "plot", "plot name", "plot no", "plot number", "survival plot", "parcela", "parcelle", "placette",
        "n parcela", "no da parcela", "no parcela", "numero da parcela", "numero de parcela", "parcela no",
        "numero de parcelle", "kipande",
    ),
    "species": (
        "species", "tree species", "scientific name", "especie", "nome cientifico", "nombre cientifico",
        "espece", "essence", "nom scientifique", "spishi", "aina", "aina ya mti",
    ),
    "lot": ("lot", "cohort", "stock lot", "seed lot", "lote", "coorte", "cohorte", "kundi"),
    "planted": (
        "planted", "n planted", "trees planted", "baseline", "plantadas", "plantados", "n plantadas",
        "arvores plantadas", "arboles plantados", "plantes", "plants plantes", "iliyopandwa", "miti iliyopandwa",
    ),
    "alive": (
        "alive", "living", "live", "n alive", "survivors", "surviving", "occupied", "occupied spots", "vivas",
        "vivos", "n vivas", "sobreviventes", "sobrevivientes", "vivants", "vivantes", "survivants", "hai",
        "zilizo hai", "iliyo hai",
    ),
    "dead_stem": (
        "dead stem", "dead stems", "dead seen", "mortas em pe", "caule morto", "caules mortos", "tallo muerto",
        "tallos muertos", "tige morte", "tiges mortes", "shina lililokufa",
    ),
    "empty_spot": (
        "empty spot", "empty spots", "empty", "cova vazia", "covas vazias", "vazias", "hoyo vacio",
        "hoyos vacios", "vacios", "emplacement vide", "emplacements vides", "vides", "shimo tupu",
    ),
    "dead": ("dead", "n dead", "mortas", "mortos", "muertas", "muertos", "morts", "mortes", "zilizokufa"),
    "not_found": (
        "not found", "missing trees", "lost", "nao encontradas", "nao encontrados", "no encontradas",
        "no encontrados", "introuvables", "non trouves", "non trouvees", "hazikupatikana",
    ),
    "not_assessed": (
        "not assessed", "not looked at", "nao avaliadas", "nao avaliados", "no evaluadas", "no evaluados",
        "non evalues", "non evaluees", "hazikukaguliwa",
    ),
    "resprout": (
        "resprout", "resprouts", "resprouted", "rebentos", "rebentou", "rebrotes", "rebrote", "rejets",
        "machipukizi",
    ),
    "origin_uncertain": (
        "origin uncertain", "may be natural", "origem incerta", "origen incierto", "origine incertaine",
        "asili haijulikani",
    ),
    "observed_on": (
        "observed on", "date", "day", "seen on", "counted on", "survey date", "visit date", "data",
        "data da visita", "dia", "fecha", "fecha de visita", "jour", "date de visite", "tarehe",
    ),
    "status": (
        "status", "plot status", "estado", "estado da parcela", "estado de la parcela", "situacao", "statut",
        "etat", "etat de la placette", "hali",
    ),
    "reason": ("reason", "why", "motivo", "razao", "razon", "raison", "motif", "sababu"),
    "note": (
        "note", "notes", "remark", "remarks", "comment", "comments", "nota", "notas", "observacoes",
        "observaciones", "remarque", "remarques", "commentaire", "maoni", "maelezo",
    ),
}  # fmt: skip


def guessed(columns: Sequence[str]) -> dict[str, int]:
    """Return {meaning: column} for the headings that say what they hold; each meaning is given once.

    A heading that is the word itself wins over one that only begins with it.

    >>> guessed(["Parcela", "Espécie", "Vivas", "Não encontradas", "Cor"])
    {'plot': 0, 'species': 1, 'alive': 2, 'not_found': 3}
    >>> guessed(["Plot no.", "Alive (trees)", "Alive"])
    {'plot': 0, 'alive': 2}
    """
    names = [folded(column) for column in columns]
    found: dict[str, int] = {}
    for fits in (str.__eq__, begins_with):
        for position, name in enumerate(names):
            meaning = next((key for key in FIELDS if any(fits(name, word) for word in all_words(key))), None)
            if meaning and meaning not in found and position not in found.values():
                found[meaning] = position
    return dict(sorted(found.items(), key=lambda pair: pair[1]))


def all_words(meaning: str) -> tuple[str, ...]:
    """Return the words for a meaning, its own name first."""
    return (meaning.replace("_", " "), *WORDS[meaning])


def begins_with(name: str, word: str) -> bool:
    """Say whether a heading is a word followed by something, such as a unit."""
    return name.startswith(f"{word} ")
