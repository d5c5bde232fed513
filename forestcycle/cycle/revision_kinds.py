"""What can become of a visit when a plan is revised."""

STAYED, ORDER, DONE = "stayed", "another place in the day", "done"
CREW, DAY, BOTH = "moved to another crew", "moved to another day", "moved to another day and crew"
LEFT, CAME, ELSEWHERE = "left", "came", "done otherwise than planned"
MOVES = (DAY, CREW, BOTH)
KINDS = (*MOVES, LEFT, CAME, ELSEWHERE, ORDER, DONE, STAYED)
