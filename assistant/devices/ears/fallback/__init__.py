"""The embedded recogniser, for computers where the leading one cannot be installed.

PocketSphinx's model of American English, searched in numpy. Complete as it is: what the ears
learn to do from now on is built in ``neural``. In the order of the data: ``pocketsphinx_library``
(dictionary, model and decoder behind checks), ``other_words`` (talk, and what sounds nearly like a
command), ``acoustics`` (the search, and what is learnt of a person), ``gates`` (is it for us, is
it safe), ``pocketsphinx_ears`` (the recogniser).
"""
