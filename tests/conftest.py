"""One thread of linear algebra for each test process, as the command line does: the matrices are small."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
