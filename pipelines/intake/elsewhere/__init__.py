"""Files whose headers are not the contract's: a mapping is proposed, shown, and reads them."""
