"""Set what is printed in lines: plan and space them, break them, and draw them."""
