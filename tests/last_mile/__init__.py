"""What several tests share: routes to measure on, and an independent solver of the soft cable."""
