"""The composition root: the one place that picks hardware or simulator and joins the rings. It computes nothing."""

from controller.app.beginning import begin
from controller.app.learning import ModelTest, learn_on_model
from controller.app.real import look_around, look_at_computer, probe, run
from controller.app.simulated import Progress, Simulation, Summary, hours_of_weather, simulate
from controller.app.workbench import Workbench, at_the_machine, look_at_machine

__all__ = [
    "ModelTest",
    "Progress",
    "Simulation",
    "Summary",
    "Workbench",
    "at_the_machine",
    "begin",
    "hours_of_weather",
    "learn_on_model",
    "look_around",
    "look_at_computer",
    "look_at_machine",
    "probe",
    "run",
    "simulate",
]
