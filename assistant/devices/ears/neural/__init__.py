"""The leading recogniser: a neural model of English, held to the sentences on offer.

Files, in the order of the data: ``model_files`` (where the model is, and whether it is the one
that was measured), ``tokens`` (its alphabet of word pieces), ``network`` (an offer as a network
of tokens), ``transducer`` (sound to log probabilities of the next token), ``adapter`` (what a room,
noise or a narrow band did to the sound, taken back), ``beam`` (the likeliest sentences of the
network and what the model would write freely), ``word_sounds`` (how much it sounds like each word
that is known well), ``evidence`` (meanings and measures), ``gates`` (is it for us, is it safe:
fitted weights), ``neural_ears`` (the recogniser).
"""
