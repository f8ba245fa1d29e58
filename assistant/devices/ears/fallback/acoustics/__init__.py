"""Searching an utterance for the sentences of an offer, in numpy.

PocketSphinx's acoustic model and dictionary are used as they are. Its own decoder loses
half of the calls at 10 dB of fan noise and gives no margins between sentences; the search
here, over the same model, takes the noise out by a model of speech, fits the length of the
speaker's vocal tract, knows how unusual a form of words is, and says by how much the best
sentence beats every other. Files, in the order of the data: ``features`` (sound to
spectra, noise removal, cepstra), ``model_files`` (the acoustic model), ``scores`` (how
well each sound of the model fits each frame), ``word_graph`` (an offer's sentences with
their weights), ``state_graph`` (the graph in states of the acoustic model), ``search``
(best paths through it), ``phone_loop`` (what any speech scores), ``word_loop`` (what talk
scores), ``person`` (what is learnt of a voice while it is heard), ``evidence`` (all of it
for one utterance).
"""
