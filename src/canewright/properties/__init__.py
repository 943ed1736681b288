"""Properties of sugar solutions, crystals, massecuites, bagasse, water, steam and air."""
