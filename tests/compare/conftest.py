"""The parts of the comparison find each other by the folder that they are started from: not to be imported in search of examples."""

collect_ignore = ["compare.py", "contents.py", "eightjobs.py"]
