"""What would make a run pass: changes carried out, solved again with all findings, and ranked."""
