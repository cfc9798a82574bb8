"""How far one input may go before the first limit is reached."""
