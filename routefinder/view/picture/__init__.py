"""Pictures of routes on sheets: places reckoned here, drawn as SVG or by Graphviz."""
