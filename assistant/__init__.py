"""sweepsay: square a machine's table to its spindle by voice."""

import os

# The matrices of the recogniser are small: a second thread doubles the cost, gains nothing
# and, on a busy machine, takes five times as long. It must be said before numpy is loaded.
for _library in ("OPENBLAS", "OMP", "MKL"):
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")

# The voice detector asks for four threads by itself, whatever is said above, and they wait for
# each other longer than they work: 1.1 ms of processor for each 32 ms of sound, 0.24 with one.
os.environ.setdefault("OMP_THREAD_LIMIT", "1")

# The runtime of the neural networks would give this computer an identifier, keep a record of its
# use in the cache folder and send it over the internet; it looks at this when it is loaded.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"
