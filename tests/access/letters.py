"""Letters of the policy table: m manager, l field lead, v volunteer, f funder; “open” needs no sign-in."""

M, ML, MLV, ALL, OPEN = "m", "ml", "mlv", "mlvf", "open"
