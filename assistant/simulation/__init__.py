"""A machine, a person, their speech and the noise round them: for the demo and the tests."""
