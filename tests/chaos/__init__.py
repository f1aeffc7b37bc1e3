"""Takes sent while everything is killed, wiped, filled and set to the wrong time: what is lost, what counts twice."""
