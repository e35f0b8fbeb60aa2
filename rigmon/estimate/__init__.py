"""The estimator on the rig, its forecasts, and the plain cooling-curve fit beside it."""
