"""The composition root: the one place that picks hardware or simulator and joins the rings. It computes nothing."""

from controller.app.beginning import begin
from controller.app.learning import ModelTest, learn_on_model
from controller.app.real import look_at_computer, probe, run
from controller.app.simulated import Progress, Simulation, Summary, hours_of_weather, simulate

__all__ = [
    "ModelTest",
    "Progress",
    "Simulation",
    "Summary",
    "begin",
    "hours_of_weather",
    "learn_on_model",
    "look_at_computer",
    "probe",
    "run",
    "simulate",
]
