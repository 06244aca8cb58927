"""The demo: two invented organisations whose records tell every story the pages should be able to show.

`tables` hold what the scenario says (places, lots, true survival), `draws`, `ground` and `counts` turn it into
plots and counts with a fixed seed, `sheets` writes them as phone records, `writing` puts all of it through the
services, and `facts` reads back what the pages must show. Nothing here is about real people or real land.
"""

from datetime import date

SCENARIO_DAY = date(2026, 11, 25)  # the day the story stands at; a demo is never loaded before it
# Chosen among sixty so that the counts as drawn tell the story; tests hold other seeds to the truth.
SEED = 20231146
PASSWORD = "nine acorns in a row"  # noqa: S105  (known to everybody; sign-ins exist only where settings.DEMO)
