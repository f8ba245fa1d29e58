"""sweepsay: square a machine's table to its spindle by voice."""

import os

# The matrices of the recogniser are small: a second thread doubles the cost, gains nothing
# and, on a busy machine, takes five times as long. It must be said before numpy is loaded.
for _library in ("OPENBLAS", "OMP", "MKL"):
    os.environ.setdefault(f"{_library}_NUM_THREADS", "1")

# The runtime of the neural networks would give this computer an identifier, keep a record of its
# use in the cache folder and send it over the internet; it looks at this when it is loaded.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"
