"""triagebot finds out in conversation how rear sprockets are fastened, and names the remover that fits."""

__version__ = "0.1.0"
