"""libvips, set up once: one thread, no cache of operations, and no loader that is not fit for untrusted files."""

import pyvips

pyvips.concurrency_set(1)
pyvips.cache_set_max(0)
pyvips.block_untrusted_set(True)

__all__ = ["pyvips"]
