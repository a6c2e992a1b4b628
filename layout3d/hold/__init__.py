"""Whether loose pieces hold: what they rest on, when they tip, slide or come up, and what they press on."""
