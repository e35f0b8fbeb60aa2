"""A rig that is not there: a model to test against and to show the program with."""
