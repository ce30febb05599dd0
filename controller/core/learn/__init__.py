"""Getting to know the box: a course of phases in which the outputs follow a plan and not the loops.

The course only says which output is wanted when. Judge, slow rules, gate and timing stand behind it as behind the
loops, and whatever they forbid ends it.
"""
