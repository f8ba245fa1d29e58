"""The spoken language: what may be said and what it means.

Pure, and it imports nothing else of the project. Files, in the order of the data:
``vocabulary`` (the one table of spoken words), ``numerals`` (words to exact values and
back), ``scale`` (what an indicator can show), ``meaning`` (what an utterance can mean),
``offer`` (what may be said in one phase), ``parse`` (words to meaning, total), ``say``
(meaning to words), ``sentences`` (an offer as a tree), ``phrases`` (compiled for a
recogniser that takes a list), ``ending`` (whether what was said can go on).
"""
