"""Species for tests: the shipped reference, and small folders of files that a test may spoil."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from species.models import Species
from species.reference_files import DATA_FOLDER
from species.services.reference import LoadReport, load_reference
from tests import factories

SMALL = {  # two species, invented
    "species.csv": (
        "slug,scientific_name,authority,genus,family,growth_form,is_nitrogen_fixer,shade_class,superseded_by,source",
        "alnus-test,Alnus test,L.,Alnus,Betulaceae,tree,yes,light_demander,,Test flora 1",
        "betula-test,Betula test,L.,Betula,Betulaceae,tree,,,,Test flora 2",
    ),
    "species_names.csv": (
        "species,language,name,is_main,source",
        "alnus-test,en,test alder,yes,Test flora 1",
        "alnus-test,en,water alder,no,Test flora 1",
    ),
    "species_synonyms.csv": ("species,scientific_name,source", "alnus-test,Alnus old,Test flora 1"),
    "species_traits.csv": (
        "species,trait,value_number,value_text,unit,source,basis",
        "alnus-test,rain_lowest_mm,600,,mm/year,Test flora 1,literature",
        'alnus-test,light,,full_sun part_shade,,"from memory, check locally",from_memory',
    ),
    "range_status.csv": ("species,country_code,region,status,source", "alnus-test,PT,,native,Test flora 1"),
}


@pytest.fixture
def reference(db) -> LoadReport:
    """The shipped reference, loaded."""
    return load_reference()


@pytest.fixture
def files(tmp_path) -> Callable[..., Path]:
    """Write the small files with some lines replaced: `files({"species.csv": {3: "a,new,line"}})`.

    Lines are numbered as an editor shows them; None takes a line out; a number past the end adds one.
    """

    def write(changes: dict[str, dict[int, str | None]] | None = None) -> Path:
        for name, lines in SMALL.items():
            numbered = dict(enumerate(lines, start=1)) | (changes or {}).get(name, {})
            kept = [line for _, line in sorted(numbered.items()) if line is not None]
            (tmp_path / name).write_text("\n".join(kept) + "\n", encoding="utf-8")
        return tmp_path

    return write


@pytest.fixture
def shipped_copy(tmp_path) -> Path:
    """A copy of the shipped files that a test may change."""
    return Path(shutil.copytree(DATA_FOLDER, tmp_path / "data"))


@pytest.fixture
def ash(db) -> Species:
    return factories.species("fraxinus-test")
