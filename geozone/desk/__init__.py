"""The local web page in which the whole job is done: it calls the other layers and computes nothing."""
