// The page is built elsewhere.
