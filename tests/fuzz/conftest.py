"""The makers of spoiled files find each other by the folder that they are started from: not to be imported in search of examples."""

collect_ignore = ["audits.py", "fuzz.py", "jobs.py", "lists.py", "trial.py"]
