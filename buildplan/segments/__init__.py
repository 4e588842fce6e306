"""A part cut into segments that print alone and go together, and coupons cut from it."""
