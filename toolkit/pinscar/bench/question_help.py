"""What a person reads who answers a question of `pinscar new` with a question mark."""

from __future__ import annotations

TITLE_HELP = "A few words; they stand on the first page of the report."
REFERENCE_HELP = (
    "The oil that is known and that the others shall replace or match. Every result is stated against it, "
    "so it is run as often as the others, on the same days. Write its id as you will write it in the "
    "table, such as R-10."
)
CANDIDATES_HELP = (
    "The oils that a decision is wanted on: one or several, such as C-21 or H 1; H 2. Write each as you "
    "will write it in the table."
)
BENCHMARKS_HELP = (
    "Oils that are known from elsewhere and place the others among them; no decision is taken on them. "
    "none leaves them out."
)
QUESTION_HELP = "One sentence; the report answers it on its first page."
GEOMETRY_HELP = (
    "How the bodies touch: 1 a round pin across a ring, 2 a ball on a disc, 3 a flat block on a ring, 4 a "
    "pin across a ring that has a worn groove. The area and the volume of the scar follow from it."
)
DIAMETERS_HELP = (
    "Both with their units, the pin first: 12 mm, 40 mm. The depth and the volume of the scar and the "
    "speed of sliding follow from them; the film pressure does not, it needs load and scar alone. Measure "
    "them; a drawing will do for a start."
)
WIDTH_HELP = "The width over which the ring's face bears on the block, such as 8 mm."
GROOVE_HELP = "The depth of the groove in the ring's surface, such as 0.02 mm, from a profile across it."
SPEED_HELP = "Turns in a time, such as 700 rpm or 700/min."
LOAD_HELP = (
    "The force that presses the pin on the ring: 450 N, or 450, 600, 750 N for three levels. Where you "
    "know only the weights on the lever, write these in kg, and the next question asks for the lever. "
    "Each oil is run at each load."
)
LEVER_HELP = (
    "How many times the load on the pin is larger than the weight that hangs on the lever: the arm of the "
    "weights over the arm of the pin. Measure both arms, or hang on a known weight and read a load cell "
    "at the pin."
)
HANGER_HELP = "What hangs on the lever before any weight lies on it, such as 0.8 kg. Weigh it."
DURATION_HELP = (
    "How long a run lasts, such as 60 s or 1,5 min. It should be long enough for the noise to stop with "
    "most oils: a run that is still wearing at its end gives only a bound on the film pressure."
)
REPEATS_HELP = (
    "How often each oil is run at each load. 3 is the least that shows a spread, 4 to 6 are usual; "
    "pinscar plan computes how many a wanted difference takes."
)
DAYS_HELP = (
    "Every day gets all oils as evenly as possible, so that a warm or humid day favours none; the days "
    "are then compared among themselves."
)
LIMIT_HELP = (
    "A release limit, if there is one: the film pressure, load over scar area, that a candidate must "
    "reach, such as 120 MPa or 120 N/mm2. none leaves it out; other limits can be written into "
    "campaign.toml."
)
