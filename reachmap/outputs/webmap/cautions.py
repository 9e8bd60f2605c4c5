"""What every page says before anything else: people drown in rivers."""

from reachmap.base.cautions import CAUTIONS, INVENTED, PREVIEW, SHORT

__all__ = ["CAUTIONS", "INVENTED", "PREVIEW", "SHORT"]
