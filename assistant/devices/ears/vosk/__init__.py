"""Vosk as the recogniser, for whoever installs a model; fetching and keeping that model."""
