"""Building the verdict: pairs, settings, stages, advice, leads."""

CARE_FILE, CARE_VARIABLE = "care.json", "COILWISE_CARE"
"""What is remembered of care (`reports.verdict.care_memory`), and the variable of the environment that names
its folder: who only asks whether there is such a file loads nothing."""
