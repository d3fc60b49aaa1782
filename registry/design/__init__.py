"""Study-design statistics: replication, recording rules, allocation. Pure: no Django."""
