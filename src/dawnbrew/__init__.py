"""dawnbrew plans living brews backward from planting dates to the minute each must be started."""
