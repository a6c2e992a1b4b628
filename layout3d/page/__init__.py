"""One page that tells a whole scene: a file of HTML that opens offline, with a model that turns."""
