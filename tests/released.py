"""The last release's place in the migrations: what a site that is being brought up to date still runs beside the new.

At a release, write the leaves of its migrations here.
"""

LEAVES = {
    "analysis": "0002_discarded",
    "assignments": "0009_tempo_of_a_week",
    "studio": "0005_which_studio",
}
